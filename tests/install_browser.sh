#!/usr/bin/env bash
# The browser tests drive Chromium, the test of spelling asks hunspell with its British dictionary,
# and publishing is tried with nginx, Apache, rsync and OpenSSH's server. Where one of them is missing
# and this is Debian or a relative of it, install it; elsewhere say what to do.
set -euo pipefail
missing=(chromium)
for name in chromium chromium-browser google-chrome; do
  if command -v "$name" >/dev/null; then missing=(); fi
done
if ! echo colour | hunspell -d en_GB -l >/dev/null 2>&1; then
  missing+=(hunspell hunspell-en-gb)
fi
PATH=$PATH:/usr/sbin  # where servers stand that a plain account does not look for
for pair in nginx=nginx-light apache2=apache2-bin rsync=rsync sshd=openssh-server; do
  # Without them their tests are left out.
  if ! command -v "${pair%=*}" >/dev/null; then missing+=("${pair#*=}"); fi
done
if [ ! -e /etc/mime.types ]; then missing+=(media-types); fi  # by which Apache tells kinds of files
if [ "${#missing[@]}" = 0 ]; then exit 0; fi
if command -v apt-get >/dev/null && [ "$(id -u)" = 0 ]; then
  export DEBIAN_FRONTEND=noninteractive
  # No server shall run by itself: the tests start their own, on the loopback address.
  policy=/usr/sbin/policy-rc.d
  if [ ! -e "$policy" ]; then
    trap 'rm -f "$policy"' EXIT
    printf '#!/bin/sh\nexit 101\n' >"$policy"
    chmod 755 "$policy"
  fi
  apt-get update -qq
  apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
  for pair in nginx-light=nginx openssh-server=ssh; do
    if [[ " ${missing[*]} " == *" ${pair%=*} "* ]]; then
      systemctl disable --quiet "${pair#*=}" 2>/dev/null || true
    fi
  done
  exit 0
fi
echo "tests: not found: ${missing[*]}; install them. Without Chromium: pytest -m 'not browser'" >&2
exit 1
