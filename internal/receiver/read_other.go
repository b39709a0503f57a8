//go:build !unix

package receiver

import "net"

type reader = plainReader

func readerOf(c net.Conn) reader { return plainReader{c} }

// mostConns is not known here.
func mostConns() (n int, known bool) { return 0, false }
