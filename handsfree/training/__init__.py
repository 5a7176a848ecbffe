"""Training of the embedded recogniser's networks. No user of the program needs it."""
