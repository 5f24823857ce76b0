"""Who may open which door: the table, and a world with one of everything."""
