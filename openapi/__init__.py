"""The contract as files: openapi.json, examples that the service really answers, and its changes."""
