"""What the pages of the bench, the trials and the garage are made of."""
