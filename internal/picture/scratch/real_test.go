package scratch
import ("testing";"time";"context";"fmt";"io";"lampwise/internal/job";"lampwise/internal/picture";"lampwise/internal/media")
func TestReal(t *testing.T){
	ctx:=context.Background()
	w,err:=job.Open(ctx,"/tmp/lw/x1080/episode-1.mov","/tmp/lw/x1080/lesson.toml")
	if err!=nil {t.Fatal(err)}
	for i,o:=range w.Program.Ops { fmt.Println(i,o.Kind()) ; if r,ok:=o.(*picture.Range);ok {fmt.Println(*r.Min,*r.Max)}}
	fmt.Printf("%+v %+v\n",w.Format,w.Program.Output)
	t0:=time.Now()
	k,err:=picture.Compile(w.Program,w.Path.Exact,w.Format,picture.KernelOptions{})
	if err!=nil {t.Fatal(err)}
	fmt.Printf("compile %v %+v\n",time.Since(t0),*w.Program.Error)
	r,err:=media.OpenReader(ctx,"/tmp/lw/x1080/episode-1.mov",media.ReadOptions{Info:w.Info,Override:job.Override(w.Grade)})
	if err!=nil {t.Fatal(err)}
	defer r.Close()
	f:=picture.NewFrame(w.Format); out:=picture.NewFrame(w.Program.OutputFormat(w.Format)); pl:=picture.NewFrame(out.Format)
	var best time.Duration=1<<60
	for n:=0;n<40;n++ { if err:=r.Next(f);err==io.EOF {break} else if err!=nil {t.Fatal(err)}
		t0=time.Now(); k.Run(f,out); best=min(best,time.Since(t0))
		if n%20==0 { m,_:=k.Measure(f,3); fmt.Printf("%+v\n",m)
			w.Program.RunWith(w.Path.Exact,f,pl)
			h:=map[int]int{}; for i:=range out.Y { h[int(out.Y[i])-int(pl.Y[i])]++ }; for i:=range out.Cb { h[int(out.Cb[i])-int(pl.Cb[i])]++; h[int(out.Cr[i])-int(pl.Cr[i])]++ }
			fmt.Println(h)
		}
	}
	a,b:=k.Evaluated()
	fmt.Println("best",best,float64(best.Nanoseconds())/(1920*1080),"ns/px (2 threads) exact",float64(b)/float64(a))
}
