#!/usr/bin/env python
"""Run a Django command of Holdfast."""

import os
import sys

from django.core.management import execute_from_command_line

from config.env import SettingFault

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        execute_from_command_line(sys.argv)
    except SettingFault as fault:
        sys.exit(f"Setting not usable: {fault}.")
