"""The addresses of the whole program; each app adds its own."""

urlpatterns = []
