"""Step 5, render: composed guides become sites and papers, in a staging folder."""
