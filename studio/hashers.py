"""Password hashing sized for a small box."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class SmallBoxArgon2(Argon2PasswordHasher):
    """Argon2id with 32 MiB, two passes, one lane.

    OWASP's password storage cheat sheet asks for at least 19 MiB with two passes and one lane (from memory).
    Django's own 100 MiB on eight lanes would let four people signing in at once starve a board with 1 GB.
    """

    time_cost = 2
    memory_cost = 32 * 1024
    parallelism = 1
