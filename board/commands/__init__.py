"""The commands of the program, one module each: what is asked for, what is printed, the exit code.

Each has ``add(parser)`` for its options and ``run(options, shell)``. Only the shell prints.
"""
