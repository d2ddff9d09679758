"""What `manage.py check` looks at before the studio relies on this box."""
