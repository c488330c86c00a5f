package media

import "strings"

// containers are our names of ffprobe's formats: a short word for programs,
// and the name by which a person knows the file.
var containers = map[string]struct{ id, name string }{
	"matroska": {"matroska", "Matroska"}, "mxf": {"mxf", "MXF"}, "avi": {"avi", "AVI"}, "asf": {"asf", "ASF"},
	"flv": {"flv", "FLV"}, "ogg": {"ogg", "Ogg"}, "dv": {"dv", "DV"}, "ivf": {"ivf", "IVF"}, "nut": {"nut", "NUT"},
	"mpegts": {"mpegts", "MPEG transport stream"}, "mpeg": {"mpegps", "MPEG program stream"}, "mpegvideo": {"mpegvideo", "bare MPEG video"},
	"h264": {"h264", "bare H.264"}, "hevc": {"hevc", "bare HEVC"}, "yuv4mpegpipe": {"yuv4mpeg", "YUV4MPEG"},
}

// containerOf names the container by ffprobe's format name. MOV, MP4 and 3GP
// are one format to ffprobe; the file's own brand tells them apart (ISO/IEC
// 14496-12, "ftyp"; files from before there were brands are MOV).
func containerOf(format string, tags map[string]string) (id, name string) {
	first, _, _ := strings.Cut(format, ",")
	if first == "mov" {
		switch brand := strings.TrimSpace(tags["major_brand"]); {
		case brand == "qt" || brand == "":
			return "mov", "MOV"
		case strings.HasPrefix(brand, "3g"):
			return "3gp", "3GP"
		}
		return "mp4", "MP4"
	}
	if c, ok := containers[first]; ok {
		return c.id, c.name
	}
	return first, first
}
