"""A server that answers late, to see that no test reads the page before instead of the page that is on its way."""

import os
import time


def late(application):
    """
    The application, with every page as many seconds late as LAPEL_LATER says: so its first half, and so again its rest.

    Late is what a browser goes to, what a page fetches of itself and all that is sent in; not styles, scripts, fonts.
    """
    seconds = float(os.environ.get("LAPEL_LATER") or 0)
    if not seconds:
        return application

    def answered(environ, start_response):
        is_page = "text/html" in environ.get("HTTP_ACCEPT", "") or "HTTP_HX_REQUEST" in environ
        if not is_page and environ["REQUEST_METHOD"] != "POST":
            return application(environ, start_response)
        time.sleep(seconds)
        return _in_halves(application(environ, start_response), seconds)

    return answered


def _in_halves(answer, seconds):
    try:
        whole = b"".join(answer)
    finally:
        if hasattr(answer, "close"):
            answer.close()
    middle = len(whole) // 2
    yield whole[:middle]
    time.sleep(seconds if whole else 0)
    yield whole[middle:]
