#!/bin/sh
# Installs what the tests need from Debian, when it is missing: a headless browser and ngspice.
set -eu
missing=""
command -v ngspice >/dev/null 2>&1 || missing="$missing ngspice"
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
command -v chromedriver >/dev/null 2>&1 || missing="$missing chromium-driver"
command -v fc-list >/dev/null 2>&1 && fc-list | grep -qi dejavu || missing="$missing fontconfig fonts-dejavu-core"
[ -n "$missing" ] || exit 0
echo "installing for the tests:$missing"
if [ "$(id -u)" = 0 ]; then sudo=""; else sudo="sudo"; fi
$sudo apt-get update -q >/dev/null
# shellcheck disable=SC2086
DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -q --no-install-recommends $missing >/dev/null
