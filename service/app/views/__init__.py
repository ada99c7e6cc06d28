"""What the pages show, as plain values; the templates only lay it out."""
