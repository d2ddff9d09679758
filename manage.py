#!/usr/bin/env python
"""Run Clearbath's commands: `python manage.py help` lists them."""

import os
import sys

from studio.environment import WrongSetting


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except WrongSetting as error:
        sys.exit(f"Clearbath cannot start: {error}")


if __name__ == "__main__":
    main()
