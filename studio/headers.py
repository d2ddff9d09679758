"""Answer headers that no library sets for us."""

PERMISSIONS_POLICY = "screen-wake-lock=(self), camera=(self), microphone=(), geolocation=(), payment=(), usb=()"


def permissions_policy(get_response):
    """Middleware: the phone's camera and staying awake are ours; the rest of the device is nobody's."""

    def middleware(request):
        response = get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        return response

    return middleware
