"""One beat by HTTP: a plain request to an address that some service outside listens at."""

import logging

log = logging.getLogger(__name__)

BEAT_TIMEOUT_SECONDS = 10.0


class HttpBeat:
    """url: http or https, a secret. post: POST with no body instead of GET."""

    def __init__(self, url: str, *, post: bool = False, timeout_seconds: float = BEAT_TIMEOUT_SECONDS) -> None:
        self._url = url
        self._post = post
        self._timeout_seconds = timeout_seconds

    def __call__(self) -> bool:
        """True when it was taken with a status of 200 to 299."""
        # Only who has an address needs these: one and a half MB.
        from http.client import HTTPException
        from urllib.error import HTTPError, URLError
        from urllib.request import Request, urlopen

        request = Request(self._url, data=b"" if self._post else None, headers={"User-Agent": "spyhole"})  # noqa: S310
        try:
            with urlopen(request, timeout=self._timeout_seconds) as answer:  # noqa: S310 - the settings name it
                return 200 <= int(answer.status) < 300
        except HTTPError as error:
            log.warning("the outside heartbeat was answered with %d", error.code)
        except (URLError, OSError, HTTPException, ValueError) as error:
            log.warning("the outside heartbeat was not taken (%s)", type(error).__name__)
        return False
