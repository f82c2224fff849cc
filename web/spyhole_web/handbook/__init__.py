"""The handbook: what a potter needs to read, kept beside the page so that it is there without a network."""
