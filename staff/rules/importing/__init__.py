"""Reading a staff list that somebody keeps in a spreadsheet: cells, dates, columns, people. Pure functions."""
