//go:build unix

package receiver

import (
	"io"
	"net"
	"sync"
	"syscall"
)

// reader waits for bytes without holding a buffer: one comes from the pool only once there is
// something to read. What is no socket of the system (a pipe in a test) is read plainly.
type reader struct {
	raw   syscall.RawConn
	plain plainReader
}

var buffers = sync.Pool{New: func() any { return new([readAtOnce]byte) }}

func readerOf(c net.Conn) reader {
	if socket, ok := c.(syscall.Conn); ok {
		if raw, err := socket.SyscallConn(); err == nil {
			return reader{raw: raw}
		}
	}
	return reader{plain: plainReader{c}}
}

// read waits until the deadline of the connection and hands over what came. take must not keep it.
func (r reader) read(take func([]byte)) error {
	if r.raw == nil {
		return r.plain.read(take)
	}
	var failed error
	err := r.raw.Read(func(fd uintptr) bool {
		buf := buffers.Get().(*[readAtOnce]byte)
		defer buffers.Put(buf)
		n, err := syscall.Read(int(fd), buf[:])
		for err == syscall.EINTR {
			n, err = syscall.Read(int(fd), buf[:])
		}
		switch {
		case err == syscall.EAGAIN:
			return false
		case err != nil:
			failed = err
		case n == 0:
			failed = io.EOF
		default:
			take(buf[:n])
		}
		return true
	})
	if err != nil {
		return err
	}
	return failed
}

// spareHandles are for the database files, listeners and the web application.
const spareHandles = 128

// mostConns is how many connections the process has file handles for.
func mostConns() (n int, known bool) {
	var limit syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit); err != nil {
		return 0, false
	}
	all := int(min(uint64(limit.Cur), 1<<30))
	return max(all-spareHandles, all/2), true
}
