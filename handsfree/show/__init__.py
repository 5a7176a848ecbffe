"""What is seen: the bench display, the phrase card."""
