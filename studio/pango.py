"""Whether the library that sets type for tags is here. No Django, so that the start script may ask it."""

import ctypes

NAMES = ("libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll")


def found():
    return any(loads(name) for name in NAMES)


def loads(library):
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True
