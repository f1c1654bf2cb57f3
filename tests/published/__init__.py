"""Published numbers, recomputed by the product to the printed digits."""
