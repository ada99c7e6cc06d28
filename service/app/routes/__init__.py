"""The pages and the JSON API: a module for each, named as its address."""
