package notify

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
)

// files holds the sounds as files for the players. Each is made when first
// asked for, and again when something (a cleaner of old temporary files) has
// taken it away.
type files struct {
	mu     sync.Mutex // guards folder and the making of files
	folder string     // empty until the first file is made
}

// path gives the file called name, writing what sound makes where it is missing.
func (f *files) path(name string, sound func() []int16) (string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	path, err := f.make(name, sound)
	if err != nil {
		return "", fmt.Errorf("the sound files can't be written: %w", err)
	}
	return path, nil
}

func (f *files) make(name string, sound func() []int16) (path string, err error) {
	if f.folder == "" {
		if f.folder, err = os.MkdirTemp("", "simmerline-sound-"); err != nil {
			return "", err
		}
	}
	path = filepath.Join(f.folder, name+".wav")
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	if err := os.MkdirAll(f.folder, 0o700); err != nil {
		return "", err
	}
	// Written beside and renamed, so that half a file is never played.
	if err := os.WriteFile(path+".part", EncodeWAV(sound(), sampleRate), 0o600); err != nil {
		return "", err
	}
	return path, os.Rename(path+".part", path)
}

func (f *files) remove() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.folder != "" {
		_ = os.RemoveAll(f.folder)
		f.folder = ""
	}
}
