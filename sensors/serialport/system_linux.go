package serialport

func (f Finder) system() ([]Found, error) { return f.sysfs() }
