"""The rules a plan must hold to, one family a file; each returns what it found broken."""
