"""Bringing people and doses in from a spreadsheet: read the file, check it against the record, write it whole or not at all."""
