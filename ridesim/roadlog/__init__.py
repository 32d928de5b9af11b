"""From the road to numbers: a phone's speed log becomes drag area, rolling resistance, wheel power and gear ratios."""
