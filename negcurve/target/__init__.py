"""The sheet to print: which level sits where, its identity, how it is drawn."""
