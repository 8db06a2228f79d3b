"""How a user of this computer gets the right to a serial port, ready for a shell."""

from __future__ import annotations

from collections.abc import Sequence

from calib.link.ports import Port, UsbIdentity

USUAL_GROUP = "dialout"  # Debian's, Fedora's and their descendants'; Arch and openSUSE differ

_WINDOWS = """\
Windows asks for no right: any user may open a COM port. A port that is refused is open in another
program: close serial monitors. One that is missing needs its driver, or a data cable."""

_MACOS = """\
macOS asks for no right: any user may open a port. Use its /dev/cu. name; a board with a serial chip
of its own may need its maker's driver once."""

_LINUX = """\
# 1. Your user must be in the group that owns the port.
sudo usermod -aG {group} $USER

# 2. A modem manager opens every new port and types into it. This keeps it away from your logger,
#    by its two USB ids, and gives the port to that group.
sudo tee /etc/udev/rules.d/60-calib.rules <<'END'
{rules}
END
sudo udevadm control --reload

# 3. Log out and in again, unplug the logger and plug it in."""

_RULE = (
    'SUBSYSTEM=="tty", ATTRS{{idVendor}}=="{vendor:04x}", ATTRS{{idProduct}}=="{product:04x}", '
    'GROUP="{group}", MODE="0660", ENV{{ID_MM_PORT_IGNORE}}="1"'
)


def access_help(system: str, ports: Sequence[Port], group: str | None) -> str:
    """What to type so that a logger's port can be opened, and stays alone with calib.

    Args:
        system: As ``sys.platform`` has it.
        ports: What is plugged in; a rule is made for each USB device.
        group: The group that owns such a port; the usual one when None.

    Source: the manual pages usermod(8) and udev(7); the mark for a modem manager from its own
    documentation, ID_MM_PORT_IGNORE.
    """
    if system == "win32":
        return _WINDOWS
    if system == "darwin":
        return _MACOS
    group = group or USUAL_GROUP
    devices = dict.fromkeys(
        UsbIdentity(port.identity.vendor, port.identity.product, None, None)
        for port in ports
        if port.identity is not None
    )
    rules = [_RULE.format(vendor=d.vendor, product=d.product, group=group) for d in devices]
    missing = ["# plug the logger in and ask again: the rule needs its two ids"]
    return _LINUX.format(group=group, rules="\n".join(rules or missing))
