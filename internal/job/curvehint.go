package job

import (
	"context"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/media"
)

// Aliases remembers which curve a person said a kind of clip has.
type Aliases interface {
	KeepCurveAlias(ctx context.Context, a book.CurveAlias) error
	CurveAlias(ctx context.Context, fingerprint string) (book.CurveAlias, bool, error)
}

// SayCurve remembers that clips whose metadata looks like this one's were
// recorded with the curve. It reports whether there was a hint to remember it by.
func SayCurve(ctx context.Context, store Aliases, info *media.Info, curve string) (bool, error) {
	if _, err := colour.CurveByID(curve); err != nil {
		return false, err
	}
	if info.HintKey == "" {
		return false, nil
	}
	return true, store.KeepCurveAlias(ctx, book.CurveAlias{Fingerprint: info.HintKey, Curve: curve, Said: time.Now()})
}

// SaidCurve returns the curve that was said of such a clip before; empty when none was.
func SaidCurve(ctx context.Context, store Aliases, info *media.Info) (string, error) {
	if info.HintKey == "" {
		return "", nil
	}
	a, ok, err := store.CurveAlias(ctx, info.HintKey)
	if err != nil || !ok {
		return "", err
	}
	return a.Curve, nil
}
