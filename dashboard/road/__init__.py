"""What the pages that begin with a log from the road are made of."""
