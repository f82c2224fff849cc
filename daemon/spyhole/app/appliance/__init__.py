"""Puts spyhole into service on Debian or Raspberry Pi OS, upgrades it, takes it away again.

The standard library only: the machine's own python3 runs it, from a checkout or out of a wheel, before there is
anything else. What it leaves on the machine:

    /opt/spyhole/versions/ID    each version whole, in a folder of its own; `current` is a link to one of them
    /etc/systemd/system         units, as links through `current`: one rename changes program and units alike
    /etc/spyhole                settings of the first kiln, and a folder for each further one
    /var/lib/spyhole            its record, and a folder for each further one

An upgrade is on trial (`trial`) from before that rename until the new version was seen well; `settle` ends the trial,
by keeping it or by going back, and systemd runs that again after a kill or a power cut.
"""
