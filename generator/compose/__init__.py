"""Step 4, compose: a guide and its proof become pages of Markdown, navigation and drawings."""
