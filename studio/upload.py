"""What somebody sends us as a file, read no further than it may be long."""


def read_at_most(file, max_bytes):
    """The bytes of an upload, or bytes as they are; where there are more than `max_bytes`, at least one more than that.

    One byte too many is enough to know, whatever size the sender claims.
    """
    if isinstance(file, bytes | bytearray | memoryview):
        return bytes(file)
    file.seek(0)
    return file.read(max_bytes + 1)
