from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    verbose_name = "Colourways and recipes"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        from recipes import checks  # noqa: F401  registers the checks
