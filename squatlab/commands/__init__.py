"""The commands, one module for each noun they are about.

A module has ``add_to(commands)``, which adds its subparsers and gives
each the function that runs it, from the options to an exit code
(``set_defaults(run=…)``). `squatlab.__main__` lists the modules. What is
slow to import is imported where it is run: every command starts them all.
"""
