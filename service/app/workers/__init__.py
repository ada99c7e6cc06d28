"""Worker processes and what waits for them: readings, checks of single photos, stretches."""
