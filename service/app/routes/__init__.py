"""The pages and the JSON API, a module for each, and what turns a refusal into a page."""
