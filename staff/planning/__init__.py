"""Finding good sessions with a constraint solver; works on plain values, knows no rows."""
