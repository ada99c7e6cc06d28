"""The web app, through HTTP."""
