package main

import (
	"net"
	"net/netip"
	"strconv"

	"lampwise/internal/fault"
)

// lanListeners listen on this machine's private addresses (RFC 1918, RFC 4193)
// and on no other: a public one would let the world try codes.
func lanListeners(port int) ([]net.Listener, error) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, fault.Wrap(err, fault.Missing, "lan", "Is this machine on a network?", "the network's addresses can't be read: %v", err)
	}
	var out []net.Listener
	for _, a := range all {
		prefix, err := netip.ParsePrefix(a.String())
		if err != nil {
			continue
		}
		at := prefix.Addr().Unmap()
		if !at.IsPrivate() {
			continue
		}
		l, err := net.Listen("tcp", net.JoinHostPort(at.String(), strconv.Itoa(port)))
		if err != nil {
			for _, o := range out {
				o.Close()
			}
			return nil, fault.Wrap(err, fault.Usage, "port", "Choose another with --port.", "port %d can't be listened on at %s: %v", port, at, err)
		}
		out = append(out, l)
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Missing, "lan", "Join the network that the phone is on, then start again.", "this machine has no private network address for phones to reach")
	}
	return out, nil
}
