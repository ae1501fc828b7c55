#!/usr/bin/env bash
# Gets SQLite's source and compiles it as for a microcontroller: get_sqlite.sh debian|npm DIR
#
# "debian": the source package of this Debian release, by apt (checked by its signature); needs tcl.
# "npm": a newer version, which lies in the package better-sqlite3; nothing of it is installed or run.
# In DIR are afterwards sqlite3.c, sqlite3.h and sqlite3.o, of 32 bits where the compiler can (Debian:
# gcc-multilib). The tests use what the variable SYNCD_SQLITE names: such folders, with ":" between.
set -euo pipefail
options="$(cd "$(dirname "$0")/../.." && pwd)/docs/firmware/sqlite_options.txt"
kind="$1"
mkdir -p "$2"
cd "$2"
[ -s sqlite3.o ] && exit 0

if [ "$kind" = debian ]; then
    mkdir -p parts lists/partial source
    for file in /etc/apt/sources.list.d/*.sources; do
        [ -e "$file" ] && sed 's/^Types:.*/Types: deb-src/' "$file" >"parts/$(basename "$file")"
    done
    for file in /etc/apt/sources.list /etc/apt/sources.list.d/*.list; do
        [ -e "$file" ] && sed -n 's/^deb /deb-src /p' "$file" >"parts/$(basename "$file" .list).list"
    done
    here="-o Dir::Etc::SourceList=/dev/null -o Dir::Etc::SourceParts=$PWD/parts -o Dir::State::Lists=$PWD/lists"
    # shellcheck disable=SC2086 # a list of words
    apt-get $here update -qq
    # shellcheck disable=SC2086
    apt-get $here source -qq --download-only sqlite3
    tar -xf sqlite3_*.orig.tar.xz -C source --strip-components=1
    (cd source && ./configure -q >/dev/null && make sqlite3.c >/dev/null)
    cp source/sqlite3.c source/sqlite3.h .
    rm -rf source parts lists sqlite3_*
else
    version=12.11.1
    npm pack --silent "better-sqlite3@$version" >/dev/null
    echo "ebf0ed75a7a59dbcb3b24bbd014ef49d9f15bc328e4adcbf516f2a8fadfa2835  better-sqlite3-$version.tgz" | sha256sum -c --quiet
    tar -xzf "better-sqlite3-$version.tgz" --strip-components=3 package/deps/sqlite3
    rm "better-sqlite3-$version.tgz"
fi

bits=-m32
echo 'int main(void) { return 0; }' >try.c
gcc -m32 try.c -o try 2>/dev/null || bits=-m64
rm -f try.c try
# shellcheck disable=SC2046 # a list of words
gcc -w $bits $(cat "$options") -c sqlite3.c -o part.o
mv part.o sqlite3.o
