"""PostgreSQL with each practice's rows apart: a second wall behind the scopes of the program."""
