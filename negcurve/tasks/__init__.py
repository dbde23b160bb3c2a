"""One module per command: a frozen options dataclass and one function."""
