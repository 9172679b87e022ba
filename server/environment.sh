# Sourced by server/run, tests/run and .ci/run: makes .venv and installs requirements.txt into it, once per version of
# that file. Debian with Python 3.11 or later is enough; what is missing is installed, or named with a clear message.

project="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
venv="$project/.venv"
python="$venv/bin/python"

stop() {
  echo "error: $*" >&2
  exit 2
}

install_debian() { # install_debian PACKAGE REASON
  [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null || stop "$2; install the Debian package $1, or run this as root"
  echo "installing Debian's $1 ..." >&2
  { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$1"; } >&2 ||
    stop "$2, and Debian's package $1 could not be installed"
}

find_python() {
  for name in python3 python3.14 python3.13 python3.12 python3.11; do
    if command -v "$name" >/dev/null && "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
      command -v "$name"
      return
    fi
  done
  return 1
}

prepare_environment() {
  local base stamp wanted
  base="$(find_python)" || { install_debian python3 "Python 3.11 or later is needed" && base="$(find_python)"; } ||
    stop "Python 3.11 or later is needed"
  "$base" -c 'import ensurepip, venv' 2>/dev/null || install_debian python3-venv "Python's venv module is needed"
  stamp="$venv/.installed"
  wanted="$(sha256sum "$project/requirements.txt" | cut -d' ' -f1) $("$base" --version)"
  if [ ! -f "$stamp" ] || [ "$(cat "$stamp")" != "$wanted" ]; then
    echo "installing the dependencies into .venv ..." >&2
    "$base" -m venv "$venv"
    "$python" -m pip install --quiet --disable-pip-version-check -r "$project/requirements.txt" >&2 ||
      stop "the dependencies could not be installed; see above"
    echo "$wanted" >"$stamp"
  fi
}
