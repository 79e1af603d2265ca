"""The program as a command that hears ctrl-C, whatever the shell that started the tests does with it.

A shell without job control starts what runs in the background deaf to ctrl-C, and children inherit that.
"""

from __future__ import annotations

import sys

_TEXT = (
    "import runpy, signal;"
    "signal.signal(signal.SIGINT, signal.default_int_handler);"
    "runpy.run_module('simulator', run_name='__main__', alter_sys=True)"
)
LISTENING = [sys.executable, "-c", _TEXT]
