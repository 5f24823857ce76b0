"""The two commands that manage.py answers itself: `up` starts everything here, `test` runs every test."""
