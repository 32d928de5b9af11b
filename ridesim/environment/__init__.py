"""What a bike rides in: the air and the road."""
