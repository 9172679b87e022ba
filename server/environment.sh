# Sourced by server/run, tests/run and .ci/run: makes .venv and installs into it what serving needs, or everything, once per
# version of the requirements. Debian with Python 3.11 or later is enough; what is missing is installed, or named with a
# clear message.

project="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
venv="$project/.venv"
python="$venv/bin/python"
unset PYTHONDONTWRITEBYTECODE # each of many processes would compile the whole project anew

stop() {
  echo "error: $*" >&2
  exit 2
}

install_debian() { # install_debian PACKAGE REASON; services that a package brings are not started (RUNLEVEL)
  [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null || stop "$2; install the Debian package $1, or run this as root"
  echo "installing Debian's $1 ..." >&2
  { apt-get update -qq && DEBIAN_FRONTEND=noninteractive RUNLEVEL=1 apt-get install -y -qq "$1"; } >&2 ||
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

prepare_environment() { # prepare_environment serving | everything
  local base stamp wanted file
  base="$(find_python)" || { install_debian python3 "Python 3.11 or later is needed" && base="$(find_python)"; } ||
    stop "Python 3.11 or later is needed"
  "$base" -c 'import ensurepip, venv' 2>/dev/null || install_debian python3-venv "Python's venv module is needed"
  stamp="$venv/.installed"
  wanted="$(cat "$project"/requirements.txt "$project"/*/requirements*.txt | sha256sum | cut -d' ' -f1) $("$base" --version)"
  if [ -f "$stamp" ] && { [ "$(cat "$stamp")" = "everything $wanted" ] || [ "$(cat "$stamp")" = "$1 $wanted" ]; }; then
    return
  fi
  file="$project/requirements.txt"
  [ "$1" = everything ] || file="$project/server/requirements.txt"
  echo "installing the dependencies into .venv ..." >&2
  "$base" -m venv "$venv"
  "$python" -m pip install --quiet --disable-pip-version-check -r "$file" >&2 ||
    stop "the dependencies could not be installed; see above"
  echo "$1 $wanted" >"$stamp"
}
