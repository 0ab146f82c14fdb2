"""The commands: ``squatlab NAME`` is in ``NAME_command``.

Such a module has ``add_NAME(parser)``, which gives the command its options
and the function that runs it, from the options to an exit code
(``set_defaults(run=…)``). `squatlab.__main__` lists the commands and imports
a module when its command is called, so each imports at its top what it needs.
"""
