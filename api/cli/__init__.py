"""The `rootledger` command: its commands, its tables, its server, and the demonstration garden."""
