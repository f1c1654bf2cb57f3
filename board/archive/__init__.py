"""Many mills, many years: what their logs add up to, kept together and asked across."""
