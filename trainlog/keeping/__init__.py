"""Looking after an installation: backup, restore, the move to another database, checks."""
