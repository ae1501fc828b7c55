#!/usr/bin/env bash
# Makes Linux's exFAT driver for Debian's user-mode kernel, which comes without it: get_exfat.sh DIR
#
# From the source package that this kernel was built of (140 MB, by apt), with its own configuration. In
# DIR is afterwards exfat.ko; the tests use what the variable SYNCD_EXFAT names. Needs user-mode-linux,
# bc, bison, flex, gcc, make, xz-utils. Takes half a minute.
set -euo pipefail
mkdir -p "$1"
cd "$1"
built_of=$(dpkg-query -W -f '${Built-Using}' user-mode-linux | sed -n 's/.*linux (= \([^)]*\)).*/\1/p')
[ "$(cat made_of 2>/dev/null)" = "$built_of" ] && exit 0
package="linux-source-$(echo "$built_of" | cut -d. -f1,2)"

apt-get download -qq -o APT::Sandbox::User=root "$package=$built_of"
# What exfat.ko needs of the tree: the build system, the headers, and what modules_prepare compiles.
dpkg-deb --fsys-tarfile "$package"_*.deb | tar -xO "./usr/src/$package.tar.xz" | xz -dc -T0 |
    tar -x --strip-components=1 --one-top-level=source --wildcards \
        "$package/Kbuild" "$package/scripts" "$package/include" "$package/arch/um" "$package/arch/x86" \
        "$package/tools" "$package/fs/exfat" "$package/kernel/bounds.c" "$package/kernel/time" \
        "$package/security/selinux/include" '*/Kconfig*' '*/Makefile*'
rm "$package"_*.deb
cd source
linux.uml --showconfig >.config
scripts/config --module EXFAT_FS
# The kernel's own list of symbols is in no package: what is missing shows when the module is loaded.
for target in olddefconfig modules_prepare "M=fs/exfat modules"; do
    # shellcheck disable=SC2086 # two words
    make -s -j2 ARCH=um LOCALVERSION= KBUILD_MODPOST_WARN=1 $target </dev/null >make.log 2>&1 ||
        { tail -n 20 make.log >&2 && exit 1; }
done
cd ..
cp source/fs/exfat/exfat.ko .
rm -r source
echo "$built_of" >made_of
