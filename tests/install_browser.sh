#!/usr/bin/env bash
# The browser tests drive Chromium. Where there is none and this is Debian or a relative of it,
# install it; elsewhere say what to do.
set -euo pipefail
for name in chromium chromium-browser google-chrome; do
  if command -v "$name" >/dev/null; then exit 0; fi
done
if command -v apt-get >/dev/null && [ "$(id -u)" = 0 ]; then
  export DEBIAN_FRONTEND=noninteractive
  apt-get update -qq
  apt-get install -y -qq --no-install-recommends chromium >/dev/null
  exit 0
fi
echo "tests: no Chromium found; install it, or run: pytest -m 'not browser'" >&2
exit 1
