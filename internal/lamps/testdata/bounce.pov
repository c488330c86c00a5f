// A pale corner of the garage in which light bounces: metres, made here.
// Declare=LAMP=0 key against the ceiling (all it gives is bounced), 1 a small
// panel, 2 a warm bulb low on the bench, 3 daylight. PX, LEAN move the mechanic.
//
// Bounced light is one generation of virtual lamps where rays from the lamp
// meet the room (A. Keller, "Instant radiosity", SIGGRAPH 1997): unlike a
// radiosity cache it has no noise of its own, so light still adds to rounding.
// A lamp of I candela sends flux I·Ω/n along each of n rays; a patch of
// reflectance r gives r·I·Ω/(n·pi) along its normal, falling with the cosine.
#version 3.7;
#ifndef (LAMP) #declare LAMP=0; #end
#ifndef (PX) #declare PX=0; #end
#ifndef (LEAN) #declare LEAN=0; #end
global_settings { assumed_gamma 1.0 max_trace_level 3 }
#declare M = finish { ambient 0 emission 0 diffuse 1 }
camera { location <0,1.4,-2.6> look_at <0,1.1,0> right x*image_width/image_height angle 58 }
#declare Room = union {
  plane { y, 0 }  plane { -y, -2.4 }  plane { -z, -1.5 }  plane { x, -2 }  plane { -x, -2 }  plane { z, -3 }
}
plane { y, 0 pigment { checker rgb <0.35,0.33,0.30> rgb <0.42,0.40,0.36> scale 0.4 } finish { M } }
plane { -y, -2.4 pigment { rgb 0.80 } finish { M } }
plane { -z, -1.5 pigment { brick rgb <0.72,0.70,0.66> rgb <0.62,0.58,0.52> brick_size <0.6,0.25,0.4> mortar 0.02 } finish { M } }
plane { x, -2 pigment { rgb <0.70,0.45,0.35> } finish { M } }
plane { -x, -2 pigment { rgb <0.45,0.62,0.70> } finish { M } }
plane { z, -3 pigment { rgb 0.5 } finish { M } }
box { <-1.6,0.75,0.2>,<-0.5,0.8,1.0> pigment { rgb <0.40,0.26,0.14> } finish { M } }
box { <0.8,0.9,1.2>,<1.5,1.5,1.48> pigment { checker rgb <0.1,0.3,0.5> rgb <0.6,0.55,0.2> scale 0.12 } finish { M } }
sphere { <PX+LEAN,1.48,0>,0.12 pigment { rgb <0.45,0.31,0.25> } finish { M } }
cone { <PX,0.3,0>,0.25 <PX+LEAN*0.8,1.3,0>,0.17 pigment { rgb <0.12,0.20,0.14> } finish { M } }
// reflectance of the room where a ray meets it, by the wall's normal
#macro Wall(N)
  #if (N.y>0.5) <0.38,0.36,0.33> #else #if (N.y<-0.5) <0.8,0.8,0.8> #else #if (N.z<-0.5) <0.68,0.65,0.60> #else #if (N.x>0.5) <0.70,0.45,0.35> #else #if (N.x<-0.5) <0.45,0.62,0.70> #else <0.5,0.5,0.5> #end #end #end #end #end
#end
#macro Halton(I,B) #local F=1; #local V=0; #local K=I; #while (K>0) #local F=F/B; #local V=V+F*mod(K,B); #local K=floor(K/B); #end V #end
// n rays about axis A within half angle T (degrees), from P
#macro Bounce(P, C, A, T, NR)
  #local CT = cos(radians(T));
  #local W = vnormalize(A); #local U = vnormalize(vcross(W, <0.31,0.77,0.55>)); #local V = vcross(W,U);
  #local I=1;
  #while (I<=NR)
    #local Z = 1-(1-CT)*Halton(I,2); #local Q = 2*pi*Halton(I,3); #local S = sqrt(max(0,1-Z*Z));
    #local D = U*S*cos(Q)+V*S*sin(Q)+W*Z;
    #local N = <0,0,0>;
    #local H = trace(Room, P, D, N);
    #if (vlength(N)>0)
      light_source { H+N*0.25 color rgb C*Wall(N)*5000*2*(1-CT)/NR spotlight point_at H+N*2 radius 0 falloff 89 tightness 1 fade_distance 0.01 fade_power 2 }
    #end
    #local I=I+1;
  #end
#end
#declare Day=<0.93,1.00,1.12>; #declare Warm=<1.30,1.00,0.58>;
#if (LAMP=0) #declare P=<-1.1,1.7,-1.4>; Bounce(P, 14*Day, <0.35,1,0.5>, 30, 90) #end
#if (LAMP=1) #declare P=<1.5,1.9,-1.2>; #declare C=1.0*(0.5*Day+0.5*Warm);
  light_source { P color rgb C*5000 fade_distance 0.01 fade_power 2 } Bounce(P, C, <0,1,0>, 180, 80) #end
#if (LAMP=2) #declare P=<-1.2,1.15,0.6>; #declare C=0.25*Warm;
  light_source { P color rgb C*5000 fade_distance 0.01 fade_power 2 } Bounce(P, C, <0,1,0>, 180, 80) #end
#if (LAMP=3) #declare P=<1.8,1.2,-2.4>; #declare C=0.4*<0.86,1.0,1.22>;
  light_source { P color rgb C*5000 fade_distance 0.01 fade_power 2 } Bounce(P, C, <-0.5,0,1>, 90, 60) #end
