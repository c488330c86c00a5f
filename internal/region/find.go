package region

import (
	"slices"

	"lampwise/internal/picture"
)

// Found is what was found in a scene.
type Found struct {
	// Regions may be used: their confidence is at least Sure. At most one of
	// each name, in the order of Names.
	Regions []Region `json:"regions"`
	// Doubts are the others, each with the reason why it isn't used.
	Doubts []Region `json:"doubts"`
	// Faces are all faces that were considered, the likeliest main one first.
	Faces []Face `json:"faces"`
	// Lamps are all lamps seen in the picture, the surest first; the first is
	// the region practical.
	Lamps []Region `json:"lamps"`
	// People is where people may be, to leave them out.
	People *Mask `json:"-"`
}

// Region returns the region of a name that may be used.
func (f *Found) Region(name string) (Region, bool) {
	for _, r := range f.Regions {
		if r.Name == name {
			return r, true
		}
	}
	return Region{}, false
}

// Doubt returns the doubt about a name.
func (f *Found) Doubt(name string) (Region, bool) {
	for _, r := range f.Doubts {
		if r.Name == name {
			return r, true
		}
	}
	return Region{}, false
}

// Find looks for every region in a scene. An error means that the scene is
// wrong, never that nothing was found.
func Find(s Scene) (*Found, error) {
	if s.Picture == nil {
		return FindWith(s, nil)
	}
	return FindWith(s, s.faces(Faces(s.Picture)))
}

// faces adds what the lamp pictures tell: a head lit by one lamp is often
// plainer than one lit by all. A face that the frame shows too, if only
// faintly, is as sure as in the light that shows it best; one that only a
// lamp's picture shows is doubted, as there are several of them to go wrong.
func (s Scene) faces(seen []Face) []Face {
	out := slices.Clone(seen)
	for _, lamp := range s.Lamps {
		if lamp.Picture == nil {
			continue // FindWith will say so
		}
		for _, f := range Faces(lamp.Picture) {
			f.Reason += " in the light of " + lamp.Name
			at := slices.IndexFunc(out, func(o Face) bool { return overlap(o.Box, f.Box) > sameFace })
			shown := slices.IndexFunc(seen, func(o Face) bool { return overlap(o.Box, f.Box) > sameFace && o.Confidence >= faintFace })
			if shown < 0 {
				f.Confidence *= alone
				f.Reason += ", and not in the frame's own"
			}
			switch {
			case at < 0:
				out = append(out, f)
			case f.Confidence > out[at].Confidence:
				out[at] = f
			}
		}
	}
	sortFaces(out)
	return out
}

const (
	sameFace  = 0.25 // overlap of two boxes from which they mean the same face
	faintFace = 0.2  // confidence from which the frame supports what a lamp's picture shows
	alone     = 0.6  // part of the confidence left without that support
)

// FindOver is Find for several frames of one clip in which the lamps are as in
// s: faces are those that stay (FacesOver) or that a lamp's picture shows, the
// rest is read from s.
func FindOver(s Scene, frames []*picture.Image) (*Found, error) {
	if len(frames) == 0 {
		return Find(s)
	}
	return FindWith(s, s.faces(FacesOver(frames)))
}

// FindWith is Find with faces that are known already, the main one first.
func FindWith(s Scene, faces []Face) (*Found, error) {
	l, err := newLight(s)
	if err != nil {
		return nil, err
	}
	f := &Found{Faces: faces}
	var judged []Region
	if len(faces) > 0 {
		judged = append(judged, l.faceRegions(faces[0], s.Key)...)
		judged = append(judged, l.hairRegion(faces[0]))
	} else {
		const none = "no face was found; profiles and dark faces are often missed: draw it"
		judged = append(judged, doubt(FaceLit, 0, none), doubt(FaceShade, 0, none), doubt(Hair, 0, none))
	}

	// People are left out where they may be, from a lower confidence on.
	people := slices.DeleteFunc(slices.Clone(faces), func(f Face) bool { return f.Confidence < 0.3 })
	f.People = Person(people, l.w, l.h)
	f.Lamps = l.practicals(people)
	lamp := doubt(Practical, 0, "no small spot stands out as a lamp does")
	if len(f.Lamps) > 0 {
		lamp = f.Lamps[0]
	}
	card := l.cardRegion(people)

	leave := slices.Clone(f.Lamps)
	if card.Mask != nil {
		leave = append(leave, card)
	}
	judged = append(judged, l.backgroundRegion(f.People, len(people) > 0, leave), lamp, card)
	for _, r := range judged {
		if r.Confidence >= Sure && r.Mask != nil && r.Mask.Count() > 0 {
			f.Regions = append(f.Regions, r)
		} else {
			f.Doubts = append(f.Doubts, r)
		}
	}
	return f, nil
}
