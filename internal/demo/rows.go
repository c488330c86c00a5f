package demo

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// eachRow shares rows 0..n−1 among the processors; work must not depend on the
// order. It stops early when ctx ends.
func eachRow(ctx context.Context, n int, work func(y int)) error {
	workers := min(runtime.GOMAXPROCS(0), n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for ctx.Err() == nil {
				y := int(next.Add(1)) - 1
				if y >= n {
					return
				}
				work(y)
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}
