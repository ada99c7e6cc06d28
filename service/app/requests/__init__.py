"""What a request is before a page sees it: whose it is, how it came, in which language, what it carries."""
