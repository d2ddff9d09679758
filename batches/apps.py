from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "batches"
    verbose_name = "Journal"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        from batches import checks  # noqa: F401  registers the checks
