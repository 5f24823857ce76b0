"""What is told, one file a kind or family; see safety.registry for what a row needs."""
