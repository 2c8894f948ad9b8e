"""What follows from the plans and reports of a garden: ledgers, usage, alerts, replays, checks."""
