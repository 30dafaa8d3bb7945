"""What is known of one material or one lot: the card, its file, the starting cards."""
