"""The invented shed Quillbank: its register, its fitters and forty days of what they wrote.

Everything here is made up and made by a seed. It leaves parsing, folding and showing to the
program: the example only writes text that a fitter could have written.
"""
