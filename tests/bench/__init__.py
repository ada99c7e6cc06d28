"""How long a person waits."""
