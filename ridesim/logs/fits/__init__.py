"""The sums under the answers of the room: fits, and what a build lends them."""
