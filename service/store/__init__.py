"""What is kept on disk when the user asks for it; the only code that writes."""
