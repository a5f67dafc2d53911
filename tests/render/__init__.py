"""What is rendered: symbols, stickers and sites."""
