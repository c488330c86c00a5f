package media

import (
	"context"
	"os/exec"
	"runtime"
)

// ShowPage asks the system to show an address in the browser; it doesn't wait.
func ShowPage(ctx context.Context, url string) error {
	name, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	c := exec.CommandContext(ctx, name, args...)
	if err := c.Start(); err != nil {
		return err
	}
	go func() { _ = c.Wait() }()
	return nil
}
